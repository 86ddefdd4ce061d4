"""The fair-test check: what would spoil the comparison, found before anything is made.

``table`` lists what is looked for; each entry's rule stands in the module of its kind. ``audit``
goes through them. Coverage is held against the five areas of difficulty of A. P. Dasgupta,
T. R. Anderson and N. Pelaez (2014), CBE-Life Sciences Education 13, 265-284.
"""

from trials.design.audit.run import audit, gets_a_stop, with_timed_findings
from trials.design.audit.table import SITUATIONS
from trials.design.audit.view import Again, Situation, Smallest

__all__ = [
    "SITUATIONS",
    "Again",
    "Situation",
    "Smallest",
    "audit",
    "gets_a_stop",
    "with_timed_findings",
]
