"""What is said of a stretch of time of which nothing was seen."""

DAYS = "Nothing is known of these days: no log tells of them."
OTHERS = "Choose other days, or look at Intake."
