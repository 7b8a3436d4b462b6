"""The review workbook: one sheet per table, with allowed current, utilisation and margin as live formulas."""
