"""The API's schema, and a page that shows it."""

from typing import Any

from csp.constants import UNSAFE_INLINE
from csp.decorators import csp_update
from django.contrib.auth.mixins import LoginRequiredMixin
from django.utils.decorators import method_decorator
from django.views.generic import TemplateView
from drf_spectacular.renderers import OpenApiJsonRenderer, OpenApiYamlRenderer
from drf_spectacular.views import SpectacularAPIView

from api.errors import ProblemRenderer
from curehouse.workshops.roles import Right


class Schema(SpectacularAPIView):
    """OpenAPI 3, as JSON or YAML."""

    # It says how the API is used and nothing of the house: every member and every device may read it.
    reads = Right.SEE_ROUND
    renderer_classes = [OpenApiJsonRenderer, OpenApiYamlRenderer, ProblemRenderer]


# The page's program writes styles into its page and draws its arrows as data: the only page that may.
@method_decorator(csp_update({"style-src": [UNSAFE_INLINE], "img-src": ["data:"]}), name="dispatch")
class Docs(LoginRequiredMixin, TemplateView):
    """The page; it is made of this house's own files only, and asks for sign-in like any page."""

    template_name = "api/docs.html"
    http_method_names = ["get", "head", "options"]

    def get(self, request: Any, *args: Any, **kwargs: Any) -> Any:
        """Show the page."""
        return super().get(request, *args, **kwargs)
