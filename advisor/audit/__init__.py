"""What a measurement of a zone tells, and the minutes that follow from it.

Catch cans and meters give a rate and a uniformity, with what is not known of them. Rate and uniformity give
the run time.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.audit.measurement import audit_cans, audit_meter, audit_single_can
    from advisor.audit.run_time import RunsAsked, runtime
else:
    __getattr__ = lazy(
        __name__,
        {
            "measurement": ["audit_cans", "audit_meter", "audit_single_can"],
            "run_time": ["RunsAsked", "runtime"],
        },
    )

__all__ = ["RunsAsked", "audit_cans", "audit_meter", "audit_single_can", "runtime"]
