"""Imports made by one thread at a time.

Python lets two threads import packages whose modules import one another, and then gives one of them a module that is only half
there. The kernels' threads and the run itself both need such packages, each as late as it can.
"""

from __future__ import annotations

import threading

ONE_AT_A_TIME = threading.RLock()
"""Held by whoever imports jupyter_client, papermill, nbconvert or what they bring, or the modules of shoplib that import them."""
