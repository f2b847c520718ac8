"""Many viewers at once: a season from submissions to delivered files, on one machine or many."""
