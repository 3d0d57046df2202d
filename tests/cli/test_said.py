"""What commands say, against what they were given."""
