"""What a club's members answered: who answered, and for how many vehicles each speaks."""
