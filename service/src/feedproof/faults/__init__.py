"""What each fault is called, how often it is met, and what it does to the circuit."""
