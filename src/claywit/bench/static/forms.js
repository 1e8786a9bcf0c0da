// The plain forms of a page: sent as JSON, or with their file as it is.
import { sent } from "./kept.js";
import { goOn, onSubmit, post, say, upload } from "./wire.js";

/** Send the file of each form with data-upload as it is, its other fields in the address. */
export function wireUploads() {
  for (const form of document.querySelectorAll("form[data-upload]")) {
    onSubmit(form, async () => {
      const file = form.querySelector("input[type=file]");
      const fields = [...new FormData(form)].filter(([name, value]) => name !== file.name && value);
      say("Reading …");
      const query = fields.length ? `?${new URLSearchParams(fields)}` : "";
      const answer = await upload(form.dataset.upload + query, file.files[0]);
      await sent(form);
      goOn(answer);
    });
  }
}

/** Send the fields of each form with data-post; go where the answer says. */
export function wireForms(root = document) {
  for (const form of root.querySelectorAll("form[data-post]")) {
    onSubmit(form, async () => {
      const answer = await post(form.dataset.post, Object.fromEntries(new FormData(form)));
      await sent(form);
      if (answer.go) goOn(answer);
      else if (answer.said) say(answer.said);
    });
  }
}
