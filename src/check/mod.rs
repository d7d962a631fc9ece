//! The judge: derives every rule again from the question and the plan. Shares nothing with `rules` and `search`.
