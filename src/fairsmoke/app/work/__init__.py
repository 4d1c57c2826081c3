"""Work that takes longer than a page may: in processes of their own, kept by what they rest on."""
