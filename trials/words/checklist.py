"""What a report of statistics should tell, and in which of its parts that stands.

The items are those of T. A. Lang and D. G. Altman (2013), "Basic statistical reporting for articles
published in biomedical journals: the SAMPL guidelines", in *Science Editors' Handbook*, EASE; each
in our own words.
"""

from __future__ import annotations

SAMPL = "SAMPL guidelines (Lang and Altman 2013, Science Editors' Handbook, EASE)"

# what should be told, and the key of the section where it is told
ITEMS: tuple[tuple[str, str], ...] = (
    ("the question that the analysis answers", "question"),
    ("what was changed and what was measured, with units", "question"),
    ("how many were planned, made, lost and left out, with reasons", "trouble"),
    ("the unit that counts for each comparison", "method"),
    ("how the versions were dealt out by chance", "method"),
    ("averages with their spread and how many they rest on", "tables"),
    ("differences with intervals, not tests alone", "answer"),
    ("the smallest difference that matters, set beforehand", "question"),
    ("which method, and where it is described", "method"),
    ("logarithms or other changes of scale", "method"),
    ("whether what the method takes for granted holds", "checks"),
    ("values far from the others, and what was done with them", "checks"),
    ("how several comparisons were allowed for", "method"),
    ("whether tests look to both sides, and their level", "method"),
    ("exact p values, in full", "tables"),
    ("which program did it, and its version", "method"),
    ("what the results can't tell", "limits"),
    ("the data themselves", "tables"),
)
