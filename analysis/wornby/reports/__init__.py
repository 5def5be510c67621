"""Reports: letters to three readers, each number with its unit and interval."""
