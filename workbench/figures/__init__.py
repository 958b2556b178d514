"""Tables to plotly figures. Nothing is computed here."""
