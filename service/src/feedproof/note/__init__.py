"""The hand-off note: one assessment as a page, a picture, Markdown or PDF, for people to look at."""
