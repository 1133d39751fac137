"""The farm's pages live in the night: readings typed on a telephone, the plan moved (`web`)."""
