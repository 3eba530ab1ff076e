"""From the numbers of the inference to the sentences of the answer: verdict, cautions, checks, what to do next."""
