"""The advice every evening by itself: what is due is done once, in order.

Messages are kept with the advice, sent, and marked. Whatever is wrong is told, and whatever was interrupted
is done again.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.service.health import service_health, site_health
    from advisor.service.lock import is_served
    from advisor.service.restoring import adopt, restore
    from advisor.service.serving import serve_once, serve_until_stopped
    from advisor.service.serving_demo import demo_evening
else:
    __getattr__ = lazy(
        __name__,
        {
            "health": ["service_health", "site_health"],
            "lock": ["is_served"],
            "restoring": ["adopt", "restore"],
            "serving": ["serve_once", "serve_until_stopped"],
            "serving_demo": ["demo_evening"],
        },
    )

__all__ = [
    "adopt",
    "demo_evening",
    "is_served",
    "restore",
    "serve_once",
    "serve_until_stopped",
    "service_health",
    "site_health",
]
