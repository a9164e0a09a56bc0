"""The tables of Used read into SI units: lots of receipts and stock, and the log of batches."""
