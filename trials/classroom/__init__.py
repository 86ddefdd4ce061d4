"""Who makes what, where and when: teams, equipment, lessons, materials."""
