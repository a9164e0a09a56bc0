"""What happens to one job: made, filled, accepted, brought in, settled, copied."""
