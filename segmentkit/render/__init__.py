"""Plan to frames and sound: pictures, strokes, cards, text, mix."""
