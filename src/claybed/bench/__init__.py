"""The plan at the bench: form, bed, hold, release, mixing, what comes after, drying by the scale, lifts."""
