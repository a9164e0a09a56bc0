"""What unit a formula gives, and whether that is the one its field is labelled with."""
