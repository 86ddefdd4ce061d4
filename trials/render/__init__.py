"""Drawing: typeset pages, tables and figures. Knows no study and computes no statistics."""
