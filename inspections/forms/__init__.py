"""Forms for what a person enters by hand."""
