"""Pure: packing bags; what gate, beam, camera and person did goes in, what is to be done comes out.

Nothing here opens a gate of its own accord: each opening has a person's word of its own.
"""
