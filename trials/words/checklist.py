"""What a report of statistics should tell, and in which of its parts that stands.

The items are those of T. A. Lang and D. G. Altman (2013), "Basic statistical reporting for articles
published in biomedical journals: the SAMPL guidelines", in *Science Editors' Handbook*, EASE; each
in our own words.
"""

from __future__ import annotations

from trials.words.language import marked

SAMPL = marked("SAMPL guidelines (Lang and Altman 2013, Science Editors' Handbook, EASE)")

# what should be told, and the key of the section where it is told
ITEMS: tuple[tuple[str, str], ...] = (
    (marked("the question that the analysis answers"), "question"),
    (marked("what was changed and what was measured, with units"), "question"),
    (marked("how many were planned, made, lost and left out, with reasons"), "trouble"),
    (marked("the unit that counts for each comparison"), "method"),
    (marked("how the versions were dealt out by chance"), "method"),
    (marked("averages with their spread and how many they rest on"), "tables"),
    (marked("differences with intervals, not tests alone"), "answer"),
    (marked("the smallest difference that matters, set beforehand"), "question"),
    (marked("which method, and where it is described"), "method"),
    (marked("logarithms or other changes of scale"), "method"),
    (marked("whether what the method takes for granted holds"), "checks"),
    (marked("values far from the others, and what was done with them"), "checks"),
    (marked("how several comparisons were allowed for"), "method"),
    (marked("whether tests look to both sides, and their level"), "method"),
    (marked("exact p values, in full"), "tables"),
    (marked("which program did it, and its version"), "method"),
    (marked("what the results can't tell"), "limits"),
    (marked("the data themselves"), "tables"),
)
