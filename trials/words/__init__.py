"""Text as data: numbers, verdicts, glossary, cautions and questions in plain words; no statistics."""
