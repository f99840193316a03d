"""What people and devices do, in words: the one list for pages, the API and the shell.

A code stands in the trail for good, so it is never renamed; the sentence is made when the deed is
done, and holds the name the thing had then.
"""

from collections.abc import Mapping
from types import MappingProxyType

WORDS: Mapping[str, str] = MappingProxyType(
    {
        # Coming and going.
        "set_up": "Opened the house",
        "workshop_new": "Opened this workshop",
        "sign_in": "Signed in",
        "sign_in_recovery": "Signed in with a recovery code",
        "sign_out": "Signed out",
        "let_in": "Was let in anew from the shell",
        "sign_in_half": "Typed the right password at the door, and was asked for the code",
        "sign_in_wrong": "Was refused at the door: the password was wrong",
        "sign_in_code_wrong": "Was refused at the door: the password was right, the code wrong",
        "present_password_wrong": "Was refused on their own page: the present password was wrong",
        "you": "Changed their name or address",
        "password": "Changed their password",
        "second_step_on": "Switched the second step of signing in on",
        "second_step_off": "Switched the second step of signing in off",
        "second_step_codes": "Made new recovery codes",
        "session_end": "Ended one of their sessions",
        "sessions_end": "Signed out everywhere else",
        # Who works here.
        "member": "Changed what somebody is here",
        "member_remove": "Removed somebody",
        "leave": "Left the workshop",
        "invite": "Invited somebody",
        "invitation_withdraw": "Withdrew an invitation",
        "join": "Joined the workshop",
        # The workshop.
        "preferences": "Changed the workshop's preferences",
        "ready_rule": "Changed the ready rule",
        "check_rule": "Changed the safety check's method and limit",
        "scale_add": "Added a scale",
        "scale_change": "Changed a scale",
        "scale_check": "Checked a scale",
        "scale_retire": "Took a scale out of use",
        "tare_add": "Added a tare",
        "tare_retire": "Took a tare out of use",
        "device_add": "Let a device in",
        "device_revoke": "Shut a device out",
        # Batches and their cure.
        "batch_new": "Entered a batch",
        "batch_cut": "Cut a batch",
        "formula_new": "Wrote a formula down",
        "formula_change": "Changed a formula",
        "formula_retire": "Took a formula out of use, or up again",
        "version_run": "Planned a run",
        "run_move": "Moved a run",
        "run_call_off": "Called a run off",
        "run_reserve": "Reserved anew what a run takes",
        "run_pour": "Said which batch came of a run",
        "batch_check": "Recorded a safety check",
        "batch_take_out": "Took bars out",
        "batch_label": "Chose a label weight",
        "batch_mark": "Marked sample bars",
        "bar_gone": "Ended a sample bar",
        "batch_use": "Booked what went in",
        "hold_lift": "Lifted a hold",
        "rack_new": "Put a rack up",
        "rack_change": "Changed a rack",
        "rack_room": "Said where a rack stands",
        "room_new": "Wrote a room down",
        "room_change": "Changed a room",
        "room_air": "Wrote down the air of a room",
        "room_airs": "Sent the air of a room",
        "air_withdraw": "Withdrew a reading of a room",
        "position_capacity": "Changed what a place holds",
        "batch_place": "Put bars on a rack",
        "batch_move": "Moved bars",
        "batch_turn": "Turned bars",
        "weigh": "Weighed a sample bar",
        "weigh_many": "Sent weighings",
        "reading_correct": "Corrected a weighing",
        "reading_keep": "Kept a weighing that was in doubt",
        "reading_strike": "Struck a weighing",
        "notice_done": "Saw to a notice",
        "notices_done": "Saw to notices",
        # The storeroom.
        "material_new": "Wrote a material down",
        "material_edit": "Changed a material",
        "material_facts": "Wrote down what a material is made of",
        "material_retire": "Took a material out of use, or up again",
        "supplier_new": "Wrote a supplier down",
        "supplier_edit": "Changed a supplier",
        "supplier_retire": "Took a supplier out of use, or up again",
        "supplier_terms": "Wrote down what a supplier asks beside the goods",
        "offer_new": "Wrote down what a supplier sells",
        "offer_change": "Changed what a supplier sells",
        "offer_end": "Ended what a supplier sells",
        "order_write": "Wrote or changed an order",
        "order_send": "Sent an order",
        "order_promise": "Noted the day that a supplier names for an order",
        "order_call_off": "Called off of an order",
        "order_receive": "Received of an order",
        "receive": "Received a lot",
        "lot_more": "Received more of a lot",
        "lot_count": "Counted a lot",
        "store_count_end": "Ended a store count",
        "lot_write_off": "Wrote off of a lot",
        "lot_give_back": "Gave back of a lot",
        "lot_rule": "Ruled on a lot",
        "lot_correct": "Corrected a lot's papers",
        "lot_value": "Wrote down a lot's value",
        "lot_paper": "Attached a paper to a lot",
        "movement_take_back": "Took a movement back",
        "count_take_back": "Took a count back",
        # What comes in from files.
        "import_lay_out": "Laid a file out",
        "import_check": "Had a file checked",
        "import_bring": "Brought a file in",
        "mail_set_up": "Set up mail",
        "mail_forget": "Removed the mail set-up",
    }
)


def sentence(code: str, about: str = "") -> str:
    """Return a deed in a sentence: ``Cut a batch: Calendula 12``; a code without words raises ``KeyError``."""
    words = WORDS[code]
    return f"{words}: {about}" if about else words
