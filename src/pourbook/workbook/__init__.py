"""The workbook engine: templates, building, cached values, reading, checking and explaining."""
