import { wireForms, wireUploads } from "./forms.js";

wireForms();
wireUploads();
