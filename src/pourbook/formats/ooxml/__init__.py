"""One way in and one way out of a workbook file: its package, addresses, values and parts."""
