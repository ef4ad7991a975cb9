"""What a block endures besides crushing: bending, water taken up, drip and spray, wetting and drying.

A room of its own beside crushing: these tests share the block with it, but neither its queue nor its lot.
"""
