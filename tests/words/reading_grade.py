"""How hard a text is to read, as a school grade: two published measures on words and sentences."""

from __future__ import annotations

import re


def _sentences(text: str) -> tuple[list[str], int]:
    words = re.findall(r"[A-Za-z][A-Za-z'-]*|\d[\d.]*", text)
    return words, max(len(re.findall(r"[.?!](?=\s|$)", text)), 1)


def flesch_kincaid(text: str) -> float:
    """Grade of J. P. Kincaid and others (1975), Report 8-75; syllables by vowels."""
    words, sentences = _sentences(text)
    syllables = sum(
        max(len(re.findall(r"[aeiouy]+", re.sub(r"e\b|es\b|ed\b", "", w.lower()))), 1)
        for w in words
    )
    return 0.39 * len(words) / sentences + 11.8 * syllables / len(words) - 15.59


def readability_index(text: str) -> float:
    """Automated Readability Index of R. J. Senter and E. A. Smith (1967), AMRL-TR-66-220."""
    words, sentences = _sentences(text)
    letters = sum(len(w) for w in words)
    return 4.71 * letters / len(words) + 0.5 * len(words) / sentences - 21.43
