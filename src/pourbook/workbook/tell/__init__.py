"""A checked workbook in words and tables."""
