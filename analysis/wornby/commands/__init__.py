"""The commands: what each may be asked, and what it does once its words are understood."""
