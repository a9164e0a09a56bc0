"""The programs a job workbook runs in. A host only passes calls through; it holds no arithmetic."""
