// The first run: the browser knows its time zone, so the list starts there.
"use strict";

const zones = document.getElementById("id_time_zone");
if (zones && zones.value === "") {
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if ([...zones.options].some((option) => option.value === here)) zones.value = here;
}
