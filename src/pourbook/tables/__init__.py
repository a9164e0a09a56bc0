"""The tables of a workbook read into SI units: one door from what is typed to typed rows."""
