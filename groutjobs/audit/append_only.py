"""Which tables only ever grow. Triggers of the database refuse UPDATE, DELETE and TRUNCATE on each of them."""

APPEND_ONLY = (
    "groutjobs_event",
    "groutjobs_recordkey",
    "groutjobs_treenode",
    "groutjobs_anchor",
    "groutjobs_pourentry",
    "groutjobs_photo",
    "groutjobs_photooriginal",
    "groutjobs_phoneop",
    "groutjobs_opruling",
    "groutjobs_opblob",
    "groutjobs_blob",
    "groutjobs_gapnote",
    "groutjobs_servermark",
    "groutjobs_devicekey",
    "groutjobs_devicecookie",
    "groutjobs_cureinspection",
    "groutjobs_recordsignature",
    "groutjobs_signaturevoid",
    "groutjobs_addendum",
    "groutjobs_latedecision",
    "groutjobs_signature",
    "groutjobs_calibration",
    "groutjobs_nonconformancestep",
    "groutjobs_sampleresult",
    "groutjobs_milestonerelease",
    "groutjobs_releasewithdrawal",
)
NEVER_DELETED = ("groutjobs_pour", "groutjobs_pourrecord")
"""Rows with a state: they change by the steps that triggers allow, and stay."""
