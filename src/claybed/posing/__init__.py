"""The computed pose carried to the bench: saddles, landmarks, stations round the seam, cards of the bed."""
