"""Pictures of a run: the film, its captions and its poster. Draws what account holds and knows no engine."""
