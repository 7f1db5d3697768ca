"""The soil-temperature forecast: members that learn from the past, and a panel that knows how each has fared."""
