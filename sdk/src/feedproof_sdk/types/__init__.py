"""Every type that goes over the wire: `request` is sent; `assessment`, `catalogue` and `problem` come back."""
