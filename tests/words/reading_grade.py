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


def spanish_syllables(word: str) -> int:
    """Count syllables: each strong or accented vowel, else each run of vowels, makes one."""
    sounded = re.sub(r"([qg])u(?=[eiéí])", r"\1", word.lower())
    runs = re.findall(r"[aeiouáéíóúü]+|y(?![aeiouáéíóú])", sounded)
    return max(sum(max(len(re.findall(r"[aeoáéíóú]", run)), 1) for run in runs), 1)


def szigriszt_pazos(text: str) -> float:
    """Ease of a Spanish text, 0 to 100 (F. Szigriszt Pazos 1993): 55 to 65 is "normal".

    The names of the grades are those of I. M. Barrio-Cantalejo and others (2008), Anales del
    Sistema Sanitario de Navarra 31, 135-152 (from memory).
    """
    words = re.findall(r"[^\W\d_]+|\d[\d.]*", text)
    sentences = max(len(re.findall(r"[.?!:](?=\s|$)", text)), 1)
    syllables = sum(spanish_syllables(word) for word in words)
    return 206.835 - 62.3 * syllables / len(words) - len(words) / sentences
