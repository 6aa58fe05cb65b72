"""Speed, as ratios to a floor measured in the same run. Run: python -m benchmarks (needs the test extra)."""
