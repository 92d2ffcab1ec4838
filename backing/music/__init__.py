"""What a tune is: metre, pitch, key, chord, tempo, bars and voices, form, dances."""
