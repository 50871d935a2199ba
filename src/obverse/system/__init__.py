"""What differs between systems: clocks, keys, files, ports, the browser, the terminal, folders.

The rest of the house asks here and knows of no system; each function takes the system as an argument, so that every
branch is run in the tests on one computer. What is only believed of a system, because it was never run there, stands
in docs/install.md.
"""

from obverse.system.desktop import may_open_browser, open_browser
from obverse.system.files import (
    close_to_others,
    flush_to_disk,
    make_private_folder,
    new_private_file,
    put_in_place,
)
from obverse.system.folders import FolderDoubt, Home, doubts_about, find_home
from obverse.system.kind import THIS, Kind, kind_of
from obverse.system.network import listening_socket
from obverse.system.steady import Counter, boot_name, counters
from obverse.system.terminal import KeyReader, can_say, keys_of_terminal, let_everything_be_said, may_colour

__all__ = [
    "THIS",
    "Counter",
    "FolderDoubt",
    "Home",
    "KeyReader",
    "Kind",
    "boot_name",
    "can_say",
    "close_to_others",
    "counters",
    "doubts_about",
    "find_home",
    "flush_to_disk",
    "keys_of_terminal",
    "kind_of",
    "let_everything_be_said",
    "listening_socket",
    "make_private_folder",
    "may_colour",
    "may_open_browser",
    "new_private_file",
    "open_browser",
    "put_in_place",
]
