"""What a price is built up from: pure functions on money as plain floats."""
