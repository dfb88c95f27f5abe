"""What every shipped scene must have."""

NEEDED = {"card", "shadow", "middle", "highlight"}
