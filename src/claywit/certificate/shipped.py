"""The scales and policies that claywit ships: a name and the one content it ever had.

A certificate carries its scale and policy whole. Without this list a signer could put other
words under a name that readers know. A changed file gets a new name; an old name stays here,
so that what was signed with it can be checked by every later version.
"""

from collections.abc import Mapping

SHIPPED: Mapping[str, str] = {
    "enfsi-2015": "af95746b960711aec85825176be9043a512b118349f8cc18b6a0006036fd8071",
    "plaques-2026": "1180e4cd68273358642f6356dfa77be463e0b4a9acefeb25acfb32e4a6f36a37",
}
