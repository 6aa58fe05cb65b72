"""What the services of people refuse, each with a sentence for the person who asked."""

from refuge.errors import ClearmereError


class PeopleError(ClearmereError):
    """Base of every refusal here. Its text is shown as it is."""

    def __init__(self, sentence: str = "") -> None:
        super().__init__(sentence or (self.__doc__ or ""))


class AlreadyFounded(PeopleError):
    """This refuge is set up already. Sign in, or ask a manager for an invitation."""


class LastManager(PeopleError):
    """Somebody must be able to manage the refuge, and nobody else can. Make another person a manager first."""


class OwnAccess(PeopleError):
    """You cannot remove your own access. Another manager can."""


class SignInNameTaken(PeopleError):
    """Somebody here signs in with this name already. Choose another."""


class InvitationRepeated(PeopleError):
    """This form has made an invitation already. Send it again to make another one."""


class InvitationUnknown(PeopleError):
    """No invitation has this link. Check that all of it was copied, or ask for a new one."""


class InvitationClosed(PeopleError):
    """This invitation can no longer be used. Ask a manager for a new one."""
