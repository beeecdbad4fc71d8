"""Results into figures: plain numbers in, Plotly dicts out; nothing here knows a model."""
