"""Where data/ lies, fitted parameters, and reading and writing files whole."""
