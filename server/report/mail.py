"""Send one PDF to one address, through Apprise."""

import logging

from server.alerts.channels import Trouble, trouble_of, without_secrets


def is_address(url: str) -> bool:
    """Whether something can be sent there at all."""
    import apprise

    with apprise.LogCapture(level=logging.CRITICAL):
        return apprise.Apprise.instantiate(url, suppress_exceptions=True) is not None


def send(url: str, title: str, body: str, attachment: bytes, name: str) -> None:
    """Send a message with a PDF attached, as a file of this name. Raises server.alerts.channels.Trouble."""
    import apprise
    from apprise.attachment.memory import AttachMemory

    with apprise.LogCapture(level=logging.DEBUG) as said:
        made = apprise.Apprise.instantiate(url, suppress_exceptions=True)
        if made is None:
            raise Trouble("It is no Apprise URL; mend report.mail in the station file.", permanent=True)
        pdf = apprise.AppriseAttachment(AttachMemory(content=attachment, name=name, mimetype="application/pdf"))
        try:
            sent = bool(made.notify(title=title, body=body, body_format=apprise.NotifyFormat.TEXT, attach=pdf))
        except Exception as error:  # a plugin may let any error of its libraries through
            raise Trouble(without_secrets(f"{type(error).__name__}: {error}", url, made), permanent=False) from None
        why = said.getvalue()
    if not sent:
        raise trouble_of(why, url, made)
