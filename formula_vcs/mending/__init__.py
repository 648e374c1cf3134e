"""What would mend a finding, and which small change reaches several targets at once."""
