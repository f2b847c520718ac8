"""What viewers send: made safe, measured, judged, answered. Nothing here decides what a person has decided."""
