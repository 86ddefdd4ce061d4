"""Text as data: numbers, verdicts, glossary, cautions, questions in plain words; no statistics."""
