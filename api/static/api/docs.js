"use strict";

// Requests tried from the page go by the member's session, so they carry its CSRF token.
const place = document.getElementById("docs");

window.SwaggerUIBundle({
  url: place.dataset.schema,
  domNode: place,
  deepLinking: true,
  validatorUrl: null,
  presets: [window.SwaggerUIBundle.presets.apis],
  requestInterceptor: (request) => {
    request.headers["X-CSRFToken"] = place.dataset.csrf;
    return request;
  },
});
