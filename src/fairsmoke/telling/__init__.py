"""Tell: a finding as text, as data and as a printed report with charts."""
