"""What a page offers to whom; loaded into every template."""

from django.template import Context, Library
from django.utils.safestring import SafeString

from curehouse.workshops.roles import Right

register = Library()


@register.simple_block_tag(takes_context=True)
def only_for(context: Context, content: SafeString, right: str) -> SafeString:
    """Show what stands inside to whoever has the right: ``{% only_for "pour" %}…{% endonly_for %}``.

    It asks the request, and so works in a template that is included with some values only.
    """
    return content if context.request.visit.may(Right(right)) else SafeString("")
