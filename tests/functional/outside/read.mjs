// Reads calendar files with ical.js, one JSON value a line in and one a line out:
// a calendar's text in, an array of its meetings out;
// {calendar, walls: [[year, month, day, hour, minute, second], ...]} in, the POSIX seconds of these
// times by its one VTIMEZONE out.
// argv: the path of the ical.js module.
import { createInterface } from "node:readline";
import { pathToFileURL } from "node:url";

const { default: ICAL } = await import(pathToFileURL(process.argv[2]));

function zonesOf(calendar) {
  return new Map(
    calendar
      .getAllSubcomponents("vtimezone")
      .map((part) => [part.getFirstPropertyValue("tzid"), new ICAL.Timezone(part)]),
  );
}

function meetings(text) {
  const calendar = new ICAL.Component(ICAL.parse(text));
  const zones = zonesOf(calendar);
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
      stamp: instant("dtstamp"),
      starts_at: instant("dtstart"),
      ends_at: instant("dtend"),
      summary: event.summary,
      description: event.description ?? "",
      location: event.location ?? "",
      conference: part.getFirstPropertyValue("conference") ?? "",
      status: part.getFirstPropertyValue("status"),
      method: calendar.getFirstPropertyValue("method"),
      attendees: part
        .getAllProperties("attendee")
        .map((one) => [one.getFirstValue(), one.getFirstParameter("cn") ?? ""]),
    };
  });
}

function seconds({ calendar, walls }) {
  const [zone] = zonesOf(new ICAL.Component(ICAL.parse(calendar))).values();
  return walls.map(([year, month, day, hour, minute, second]) =>
    new ICAL.Time({ year, month, day, hour, minute, second, isDate: false }, zone).toUnixTime(),
  );
}

for await (const line of createInterface({ input: process.stdin })) {
  const question = JSON.parse(line);
  const answer = typeof question === "string" ? meetings(question) : seconds(question);
  console.log(JSON.stringify(answer));
}
