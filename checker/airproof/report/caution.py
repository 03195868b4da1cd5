"""The one sentence that goes with every result."""

CAUTION = (
    "A proof is about the written model; it replaces neither the approved maintenance "
    "procedure, tests on the real equipment, local codes, nor a licensed engineer's judgement."
)
