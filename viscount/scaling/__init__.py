"""Scale and line time of an outlet's camera, from clips and pictures; composes the measuring."""
