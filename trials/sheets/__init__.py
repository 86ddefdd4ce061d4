"""What is handed out: run sheets, labels, the entry workbook and the lists around them."""

from trials.sheets.handing_out import labels_without, make_sheets
from trials.sheets.values import Handout, Handouts

__all__ = ["Handout", "Handouts", "labels_without", "make_sheets"]
