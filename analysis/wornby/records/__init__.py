"""Records: what a workshop really has, read as it is and accounted for row by row."""
