// Reads calendar files with ical.js: one JSON string a line in, one JSON array of meetings a line out.
// argv: the path of the ical.js module.
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";

const { default: ICAL } = await import(pathToFileURL(process.argv[2]));

function meetings(text) {
  const calendar = new ICAL.Component(ICAL.parse(text));
  const zones = new Map(
    calendar.getAllSubcomponents("vtimezone").map((part) => [part.getFirstPropertyValue("tzid"), new ICAL.Timezone(part)]),
  );
  return calendar.getAllSubcomponents("vevent").map((part) => {
    const event = new ICAL.Event(part);
    const instant = (name) => {
      const property = part.getFirstProperty(name);
      const zone = property.getFirstParameter("tzid");
      const time = property.getFirstValue();
      // Without this ical.js takes a local time for a floating one.
      if (zone) time.zone = zones.get(zone);
      return new Date(time.toUnixTime() * 1000).toISOString();
    };
    return {
      uid: event.uid,
      sequence: event.sequence,
      starts_at: instant("dtstart"),
      ends_at: instant("dtend"),
      summary: event.summary,
      description: event.description ?? "",
      location: event.location ?? "",
      conference: part.getFirstPropertyValue("conference") ?? "",
      status: part.getFirstPropertyValue("status"),
      method: calendar.getFirstPropertyValue("method"),
    };
  });
}

for await (const line of createInterface({ input: process.stdin })) {
  console.log(JSON.stringify(meetings(JSON.parse(line))));
}
