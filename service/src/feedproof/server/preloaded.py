"""Imported by the process that the service's processes are forked from: loads the engine and tries it once.

What is loaded here is in memory once, however many processes there are.
"""

import gc

from feedproof.app import self_test

self_test()
gc.collect()
# The garbage collector writes into what it looks at; what it leaves alone stays shared.
gc.freeze()
