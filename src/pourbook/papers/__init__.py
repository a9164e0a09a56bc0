"""Pages to hand over: one workbook for each reader, with only what that reader needs."""
