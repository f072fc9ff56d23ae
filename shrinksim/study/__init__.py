"""Many runs: sweeps, comparison, lessons, calibration."""
