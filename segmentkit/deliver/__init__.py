"""What is handed over beside the movie."""
